// IndexedDB as the phone's store uses it: a connection that is reopened when lost, transactions, and faults.
// It knows no record and no store by name; nothing of it is used outside store/.

// code: disk_full | order_taken | newer_page | unavailable | too_long. The words for each stand in form/words.js.
export class OutboxFault extends Error {
  /** @param {string} code @param {unknown} [cause] */
  constructor(code, cause) {
    super(code, { cause });
    this.code = code;
  }
}

/** @template T @param {IDBRequest<T>} request @returns {Promise<T>} */
export const ask = (request) =>
  new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });

/** @type {Record<string, string>} */
const CODE_OF_ERROR = { QuotaExceededError: "disk_full", VersionError: "newer_page" };

/** @param {any} error what the browser threw, or nothing @returns {OutboxFault} */
function faultOf(error) {
  if (error instanceof OutboxFault) return error;
  return new OutboxFault(CODE_OF_ERROR[error?.name] ?? "unavailable", error);
}

/** @param {string} name @param {Upgrade[]} upgrades @param {() => void} onLost @returns {Promise<IDBDatabase>} */
function connect(name, upgrades, onLost) {
  return new Promise((resolve, reject) => {
    const request = indexedDB.open(name, upgrades.length);
    request.onupgradeneeded = (event) => {
      for (const upgrade of upgrades.slice(event.oldVersion)) upgrade(request.result, request.transaction);
    };
    request.onerror = () => reject(faultOf(request.error));
    request.onsuccess = () => {
      const database = request.result;
      database.onclose = onLost;
      database.onversionchange = () => {
        database.close();
        onLost();
      };
      resolve(database);
    };
  });
}

/**
 * Runs `work` in a transaction that has begun.
 *
 * @template T
 * @param {IDBTransaction} transaction
 * @param {(store: StoreOf) => Promise<T>} work what to read and write; whatever it throws aborts the transaction
 * @returns {Promise<T>} what `work` gave, once the transaction is complete; rejects with an OutboxFault when it aborts
 */
function completed(transaction, work) {
  return new Promise((resolve, reject) => {
    /** @type {T} */
    let result;
    /** @type {unknown} */
    let fault = null;
    transaction.oncomplete = () => resolve(result);
    transaction.onabort = () => reject(faultOf(fault instanceof OutboxFault ? fault : (transaction.error ?? fault)));
    Promise.resolve(work((label) => transaction.objectStore(label))).then(
      (value) => {
        result = value;
      },
      (error) => {
        fault = error;
        try {
          transaction.abort();
        } catch (already) {
          if (/** @type {Error} */ (already).name !== "InvalidStateError") throw already;
        }
      },
    );
  });
}

/**
 * Opens a database, and opens it again whenever the browser drops the connection (iOS does so in the background).
 *
 * @param {string} name
 * @param {Upgrade[]} upgrades one a version of the database
 * @returns {{read: Transaction, write: Transaction, close: () => Promise<void>}}
 */
export function openDatabase(name, upgrades) {
  /** @type {Promise<IDBDatabase> | null} */
  let connection = null;
  const lost = () => {
    connection = null;
  };
  const opened = () => {
    if (connection === null) {
      connection = connect(name, upgrades, lost);
      connection.catch(lost);
    }
    return connection;
  };

  /** @param {StoreName[]} stores @param {IDBTransactionMode} mode */
  async function begin(stores, mode) {
    for (let attempt = 0; ; attempt += 1) {
      const database = await opened();
      try {
        return database.transaction(stores, mode, { durability: "strict" });
      } catch (error) {
        if (attempt > 0 || /** @type {Error} */ (error).name !== "InvalidStateError") throw faultOf(error);
        connection = null;
      }
    }
  }

  return {
    read: async (stores, work) => completed(await begin(stores, "readonly"), work),
    write: async (stores, work) => completed(await begin(stores, "readwrite"), work),
    close: async () => (await opened()).close(),
  };
}
